SwaggerUIBundle({ url: "/openapi.json", dom_id: "#description", validatorUrl: null, deepLinking: true });
